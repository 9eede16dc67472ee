"""What stands behind `beadchem.streams`: reading, writing and finishing files in parts. Nothing here is public."""
