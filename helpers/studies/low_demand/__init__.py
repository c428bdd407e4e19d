"""Low-demand stop of a fan that holds a pressure for comfort: which speed may stop it, and a night under one rule."""
