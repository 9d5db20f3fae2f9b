"""How people come in and how long they stay: tablets the owner enrolled, PINs, visits and their end."""
