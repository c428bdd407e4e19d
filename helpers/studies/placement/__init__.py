"""Where the transmitters go and which rule combines them: every choice judged under the same sampled conditions."""
