"""The command line: thin, it calls the API and renders."""
