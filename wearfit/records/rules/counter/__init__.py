"""What shot counters tell: readings put right, runs reckoned where only a counter tells, runs and counter set against each other."""
