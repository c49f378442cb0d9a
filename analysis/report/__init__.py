"""What a study found, as facts: sentences, typed tables, pictures, cautions; and what makes text, files and pages of them."""
