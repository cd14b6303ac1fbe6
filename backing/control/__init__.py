"""Live control: settings and progress as data, and the commands that change them."""
