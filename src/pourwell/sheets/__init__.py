"""What is printed or handed over: run sheet, pictures, calendar."""
