"""A verset on paper: the edition sheet, the sheet for the desk, the sheet for the student."""
