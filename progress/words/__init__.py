"""What staff and families are told, in sentences made from the same facts."""
