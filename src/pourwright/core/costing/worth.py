"""What part of a lot is worth, in whole units, so that nothing is lost or made by rounding."""


def take_value(balance_qty: int, balance_value: int, qty: int) -> int:
    """
    Return the value that goes with ``qty`` taken from a balance.

    A share by quantity, rounded down, and all of the rest with the last of it. Quantities in
    milligrams or pieces, values in hundredths of the minor unit; 0 <= qty <= balance_qty.

    >>> take_value(3, 100, 1), take_value(2, 67, 1), take_value(1, 34, 1)
    (33, 33, 34)
    """
    if qty == balance_qty:
        return balance_value if qty else 0
    return balance_value * qty // balance_qty
