"""From a wish to a recipe: composing, swapping, choosing oils, matching a scent."""
