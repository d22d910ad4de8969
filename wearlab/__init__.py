"""wearlab: wear trials on end mills, from the plan to the verdict."""
