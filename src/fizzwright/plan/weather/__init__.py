"""A log of temperature and humidity, read however it is written: your own logger's, or a public weather file."""
