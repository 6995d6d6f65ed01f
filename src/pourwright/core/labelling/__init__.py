"""What the law and good practice want on a candle's label, as sizes and statements."""
