"""The local page: asking and showing, no arithmetic. Nothing outside this package imports the server."""
