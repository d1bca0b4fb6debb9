"""One file per schema revision, numbered."""
