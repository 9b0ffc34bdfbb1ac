"""The pages of the project, built by `python -m docs`: prose, and what is made with it."""
