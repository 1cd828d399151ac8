"""Words, legends, call-outs and signs on pictures."""
