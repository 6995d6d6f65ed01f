"""
Heat: melting a batch, setting in the vessel, and burning, as an estimate to screen ideas by.

Everything here is SI or says its unit in its name. Material values come from dated tables, each
with its source and status, and each can be replaced. Nothing here passes or fails a candle.
"""
