"""What happens to fitted parts: findings, renewals, events, heat, and the feed path they make up."""
