"""What the commands and the screens both call: each function takes a store and gives an answer."""
