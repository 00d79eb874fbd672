setup-title = Setting up
