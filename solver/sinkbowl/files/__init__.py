"""Result files: written step by step, sealed, read with care, taken up again."""
