"""The melt: charge, metal temperature, flask temperature."""
