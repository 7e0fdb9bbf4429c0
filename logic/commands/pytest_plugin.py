"""The pytest plugin: requirements and scenarios of `.rung` files as test items."""
