"""Rules, one a module: its docstring is the rule's page in the manual."""
