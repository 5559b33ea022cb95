"""What a maker asks for beyond one review: sizing to moulds, bags and real spoons."""
