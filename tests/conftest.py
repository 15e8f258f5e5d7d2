"""Makes the sample builders beside this file importable from every test folder."""
