"""What runs the pages: settings, the certificate of an office, and the server process. It names the pages and imports
none."""
