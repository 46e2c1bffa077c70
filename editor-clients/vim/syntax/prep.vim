" Colours of plans. What is coloured is what the grammar of the client for VS Code colours.
if exists('b:current_syntax')
  finish
endif
let s:cpo = &cpo
set cpo&vim
syntax case ignore

let s:verbs = 'allow +to +reflux|let +reflux|allow +to +thaw|let +thaw|pipette +off|allow +the +solvent +to +evaporate|let +the +solvent +evaporate|let +solvent +evaporate|allow +to +evaporate|let +evaporate|allow +to +react|let +react|release +the +pressure|release +pressure|steam +distill|steam +distil|steam-distill|steam-distil|evaporate +off|distill +off|distil +off|boil +off|bring +up|bring +to +a +boil|bring +to +the +boil|raise +the +temperature|increase +the +temperature|lower +the +temperature|siphon +off|draw +off|allow +the +phases +to +separate|allow +the +layers +to +separate|let +the +phases +separate|let +the +layers +separate|'
      \ . 'let +it +cool|allow +it +to +cool|let +it +warm|allow +it +to +warm|top +up|vented|layer|adjust|strip +the +solvent|strip +solvent|allow +to +come|allow +to +sit|let +come|let +sit|take +TLC|run +TLC|set +up|strip|flash +column +chromatography|column +chromatography|evacuate +and +backfill|evaporate +the +solvent|'
      \ . 'flash +chromatography|remove +the +volatiles|evacuate +and +refill|flash +chromatograph|remove +the +solvents|'
      \ . 'remove +the +solvent|continue +stirring|evacuate +and +fill|evaporate +solvent|heat +under +reflux|'
      \ . 'cannula +transfer|cannula-transfer|concentrate +down|freeze +pump +thaw|freeze-pump-thaw|remove +volatiles|'
      \ . 'rotary +evaporate|rotary-evaporate|allow +to +settle|bring +to +reflux|remove +solvents|allow +to +stand|'
      \ . 'begin +stirring|chromatography|leave +to +stand|remove +solvent|allow +to +cool|allow +to +stir|allow +to +warm|'
      \ . 'chromatograph|keep +stirring|leave +to +stir|recrystallise|recrystallize|back-extract|co-evaporate|flash +column|'
      \ . 'flash-column|coevaporate|concentrate|crystallise|crystallize|centrifuge|decant +off|filter +off|let +settle|'
      \ . 'neutralise|neutralize|re-extract|redissolve|vacuum +dry|vacuum-dry|azeotrope|cannulate|cool +down|evaporate|'
      \ . 'flame +dry|flame-dry|introduce|let +stand|pulverise|pulverize|pump +down|resuspend|spin +down|triturate|'
      \ . 'weigh +out|assemble|backfill|dissolve|evacuate|incubate|let +cool|let +stir|let +warm|maintain|oven +dry|'
      \ . 'oven-dry|pour +off|separate|sonicate|transfer|acidify|agitate|air +dry|air-dry|collect|combine|confirm|connect|'
      \ . 'discard|distill|extract|heat +up|immerse|isolate|make +up|monitor|rotavap|rotovap|stopper|reseal|close|suspend|take +up|'
      \ . 'titrate|warm +up|attach|basify|bubble|charge|column|decant|dilute|distil|ensure|filter|inject|purify|quench|'
      \ . 'recool|refill|reflux|reheat|remove|repeat|settle|sparge|verify|chill|crush|degas|drain|elute|equip|flush|grind|'
      \ . 'leave|lower|place|purge|rinse|shake|swirl|treat|weigh|bake|cool|fill|heat|hold|keep|open|pour|seal|seed|stir|'
      \ . 'vent|wait|warm|wash|TLC|add|age|cap|dry|fit|mix|put|wet|'
      \ . 'depressurise|depressurize|pressurise|pressurize|hydrogenate|irradiate|condense|sublime|partition|store|siphon|bring|freeze|thaw|take|withdraw|pipette|drip|dose|feed|tip'
" Units are told apart by case, as in mm and mM.
let s:unit = '\C%(\% ?RH|%(wt|vol|mol|w\/v)\.?[ -]?\%|\%%( ?[wv]\/[wv])?|%(equiv%(alents?|s)?|eqs?|[mµμunk]?mol|g\/mol'
      \ . '|[mµμunk]?g|[mµμundc]?L|min%(ute)?s?|h%(ours?|rs?)?|s%(ec%(onds?)?)?|d%(ays?)?|weeks?|[°º˚o]C|[°º˚]F|℃|℉|K|C'
      \ . '|[hkMm]?Pa|[mµμu]?bar|atm|Torr|mmHg|psi|[mµμun]?M|N|ppm|Å|Å|A%( +%(molecular +)?%(sieve|MS))@=|[mnµμuc]m|rpm)'
      \ . '%(\/%([mµμunk]?mol|[mµμunk]?g|[mµμundc]?L|min|h|s|d))?)[0-9A-Za-z_°\/]@!'
let s:number = '[-+−–]?%(\d+%(\.\d+)?|\.\d+)%([eE][-+−–]?\d+)?'
let s:before = '[0-9A-Za-z_.,\/#-]@1<!'

" The last that matches at a place wins.
execute 'syntax match prepWord /\v\s@1<=%(to|into|onto|in|on|from|of|with|via|under|over|through|by|at|for|until|after'
      \ . '|below|above|without|as|during|between|containing|behind|while|whilst|and|%(^\s*%(\d+[.)]\s+)?|,\s+)@10<!then)\ze\s/'
syntax match prepValue /\v[0-9A-Za-z_-]@1<!%(rt|overnight|dropwise|portionwise|drop by drop|portion by portion|all at once|at once|reflux|dryness|once|twice|excess)[0-9A-Za-z_-]@!/
execute 'syntax match prepCondition /\v%(,\s)@2<=%(dry|dried|anhydrous|absolute|degassed|sparged|distilled|unstabilised'
      \ . '|hygroscopic|pyrophoric|volatile|%(moisture|air|light)-sensitive|reactant|reagent|catalyst|additive|ligand'
      \ . '|scavenger|solvent|by-product)\ze\s*%(,|and>|\&|\/|#|$)/'
syntax match prepArrow /\v\s@1<=%(-\>|→|⟶|\+)\ze\s/
execute 'syntax match prepNumber /\v[0-9A-Za-z_.,\/:#-]@1<!' . s:number . '%(\s*:\s*' . s:number . ')*\ze%(\s|$|,\s|,$|\))/'
execute 'syntax match prepNumber /\v\C' . s:before . s:number
      \ . '\ze%(%(\s*[-–−]\s*|\s+to\s+)' . s:number . '|\s*[x×])?\s*' . s:unit . '/ nextgroup=prepUnit,prepRange,prepTimes skipwhite'
execute 'syntax match prepRange /\v%([-–−]\s*|to\s+)\ze' . s:number . '/ contained nextgroup=prepUpper'
execute 'syntax match prepUpper /\v' . s:number . '/ contained nextgroup=prepUnit skipwhite'
syntax match prepTimes /\v[x×]/ contained nextgroup=prepUnit skipwhite
execute 'syntax match prepUnit /\v' . s:unit . '/ contained'
syntax match prepRemark /\v\s@1<=\(%([^()]*[a-z]{3})@=%([^()]*\d)@![^()]*\)/

syntax match prepKey /\v^\s*\zs[^[:space:]:#,()]+%( [^[:space:]:#,()]+){0,2}\ze:%(\s|$)/ nextgroup=prepColon
syntax match prepColon /:/ contained
" What a key is in a run.
syntax match prepKey /\v%([:,]\s+)@10<=[^[:space:]:#,()]+\ze\s+is\s/ nextgroup=prepIs skipwhite
syntax match prepIs /is/ contained
syntax match prepStatement /\v^\s*\zs%(scale|room|reaction|start)\ze%(:|\s|$)/
syntax match prepStatement /\v^\s*\zs%(note|author|date|source)\ze%(:|\s|$)/ nextgroup=prepText
syntax match prepText /\v:?.{-}\ze%(\s#\d@!|$)/ contained
syntax match prepPlan /\v^\s*\zsplan\ze%(:?\s|$)/ nextgroup=prepTitle
syntax match prepTitle /\v:?\s+.{-}\ze%(\s#\d@!|$)/ contained

" Steps begin below their header, and end where the next block or plan does.
syntax region prepSteps matchgroup=prepBlock start=/\v^\s*steps\ze\s*%(#.*)?$/
      \ end=/\v^\ze\s*%(%(materials|products|equipment|steps|runs)\s*%(#.*)?$|plan>)/
      \ contains=prepComment,prepWord,prepValue,prepCondition,prepArrow,prepNumber,prepRemark,prepStatement,prepPlace,prepVerb,prepStep,prepSay fold keepend
syntax match prepBlock /\v^\s*\zs%(materials|products|equipment|runs)\ze\s*%(#.*)?$/
let s:behind = '%(^\s*%(\d+[.)]\s+)?%(%(then|next|now|first|finally|afterwards),?\s+)?%([a-z]+ly\s+)?|,\s+%(then\s+)?)@40<='
execute 'syntax match prepVerb /\v' . s:behind . '%(' . s:verbs . ')\ze%([[:space:],:;.]|$)/ contained'
syntax match prepStep /\v^\s*\zs\d+[.)]\s/ contained
execute 'syntax match prepSay /\v' . s:behind . '%(note|expect|check|if)>/ contained nextgroup=prepText'
syntax match prepPlace /\v^\s*\zs%(%(meanwhile +)?in|out of|the day before|on the day)\ze%( +\S+)?\s*%(#.*)?$/ contained
syntax match prepComment /\v%(^|\s)@1<=#\d@!.*$|^\s*#.*$/

syntax sync fromstart

highlight default link prepPlan Keyword
highlight default link prepBlock Keyword
highlight default link prepStatement Keyword
highlight default link prepSay Keyword
highlight default link prepPlace Keyword
highlight default link prepTitle Title
highlight default link prepText String
highlight default link prepKey Identifier
highlight default link prepColon Delimiter
highlight default link prepVerb Function
highlight default link prepStep Number
highlight default link prepNumber Number
highlight default link prepUpper Number
highlight default link prepUnit Type
highlight default link prepRange Operator
highlight default link prepTimes Operator
highlight default link prepArrow Operator
highlight default link prepWord Operator
highlight default link prepIs Operator
highlight default link prepCondition Type
highlight default link prepValue Constant
highlight default link prepRemark Comment
highlight default link prepComment Comment

let b:current_syntax = 'prep'
let &cpo = s:cpo
unlet s:cpo
