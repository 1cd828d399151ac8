"""One file of small functions for each subject that is judged."""
