"""Whether a run's count counts shots or parts: both readings weighed, the likelier used and said."""
