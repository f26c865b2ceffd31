"""Documents, one folder each: build, template, words. Typst sets them, with the fonts that ship beside."""
