"""Reading and normalising what the user gives: vessel, route and forecast files."""
