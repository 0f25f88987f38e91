"""What people look at and carry away: sheets, plots, reports, and the delivery folder."""
