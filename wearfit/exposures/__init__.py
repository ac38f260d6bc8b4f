"""What the tools went through: lives, conditions and the wear they bring, as NumPy arrays in canonical order."""
