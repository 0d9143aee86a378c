"""What is shown to others: a result as a document, independent of what writes it, and the writers."""
