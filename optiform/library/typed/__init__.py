"""What people type: names, amounts, masses, formulas and specifications, as the library's own ids and numbers."""
