"""The design record of other plants than a stair: a supply duct, a building with a relief fan, a garage held by its gas."""
