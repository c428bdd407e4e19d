"""The design record of a site: summary, schedule, what stands, its sections and their plots; and the review of somebody's strategy."""
