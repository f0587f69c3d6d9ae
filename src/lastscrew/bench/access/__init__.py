"""Who may do what: denied unless allowed."""
