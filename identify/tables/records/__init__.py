"""The run record: one unknown in a TOML file, as people write it.

`toml_text` reads the text, and goes on behind lines that are not TOML; `keys` knows what each key
means, and which one is meant by another; `run_record` makes entries of both.
"""
