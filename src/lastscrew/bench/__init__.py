"""The bench application: take in, plan, work, prove, hand back. The only package that knows a database."""
