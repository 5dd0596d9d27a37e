"""What can be bought: materials, substances, composition and the house rules that belong to them."""
