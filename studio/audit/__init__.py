"""Who saw, changed, exported or erased what, when and from where: appended, and apart from what it is about."""
