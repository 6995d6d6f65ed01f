"""The one kind of error that a door shows to a person."""


class BadInput(ValueError):
    """
    Something given cannot be used.

    The message is one sentence for the maker: which field, what was given, what would be right.
    Pages and commands show it unchanged. Each module raises its own subclass, kept beside the
    function that raises it.
    """
