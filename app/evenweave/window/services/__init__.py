"""What works behind the views: reading, trying, advising, notes."""
