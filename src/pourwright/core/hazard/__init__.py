"""From what oils are made of to the hazard class and the label elements of a candle."""
