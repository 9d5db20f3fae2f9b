"""The rules of the studio on pain, rest, growth and work, each on plain facts."""
