"""The one family of errors that are meant for the maker: what was read, where, what is allowed, what to do."""


class Refusal(Exception):
    """Something that was given cannot be used; its text is written for the person who gave it."""
