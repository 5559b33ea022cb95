"""The invented Quillmoor workshop that shows the tool at work."""
