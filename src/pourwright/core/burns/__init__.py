"""Test burns: what is recorded, what one burn and a whole series show, and what to burn next."""
