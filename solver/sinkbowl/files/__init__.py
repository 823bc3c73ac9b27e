"""Result files: writing step by step, seal, safe reading, resumption."""
