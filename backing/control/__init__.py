"""Control: what is wanted and how far it is as data, and the commands that change it."""
