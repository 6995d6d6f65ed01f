"""Labels true to size: laid out from a candle's own data, as vector PDF and SVG."""
