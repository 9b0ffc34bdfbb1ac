"""The page of checks: values from outside, whose they are, and ours, worked out anew."""
