"""Being reached: addresses, certificates, the server itself."""
