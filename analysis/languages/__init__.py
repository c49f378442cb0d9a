"""One document in several languages: what may stand in it, and what sets it as HTML, Markdown, LaTeX, Typst and PDF."""
