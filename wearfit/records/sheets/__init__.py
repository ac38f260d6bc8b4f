"""What the cells of a sheet mean: where its tables stand, what its columns are, how its dates and numbers are written."""
