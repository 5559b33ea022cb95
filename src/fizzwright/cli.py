"""placeholder."""
def main() -> None:
    """Placeholder."""
