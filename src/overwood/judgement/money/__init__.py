"""What trees and stands are worth, what each choice pays, and the sale from its trees to the settlement."""
