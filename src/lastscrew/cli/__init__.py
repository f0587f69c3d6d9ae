"""The command line: files in, files and text out. The only part besides the bench that touches files."""
