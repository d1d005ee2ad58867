"""The verbs: one function for each thing a person does, actor first, all under the door."""
