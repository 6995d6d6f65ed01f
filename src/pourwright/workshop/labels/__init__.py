"""Labels: how a design's look is kept, composed, shown on the candle and printed for a lot."""
