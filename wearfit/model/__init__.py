"""What we believe: priors from the trade's bands, the posterior from the records, and whether the sampler can be trusted."""
