"""What is read or printed: the page, its charts and drawings, and the sheet to print."""
