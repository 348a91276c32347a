"""Parts of pages that draw themselves in the browser: a Python face and a script each."""
