"""The plan: what to pour when and from what, what to buy, and what to bring to a market."""
