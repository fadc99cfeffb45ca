"""From a history to the forecast table: own line, pooled model, dates, statement, reasons."""
