"""The command line: one file a command, which loads no more than its answer needs."""
