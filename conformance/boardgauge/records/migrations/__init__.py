"""How a database of records gets from one version to the next."""
